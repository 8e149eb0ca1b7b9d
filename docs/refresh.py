"""Put the program's own output into README.md, so that it never goes stale.

    python docs/refresh.py

A test compares README.md with what the program prints now.
"""

from __future__ import annotations

import io
import re
from pathlib import Path

from rich.console import Console

from blendwright import assess, read_formula
from blendwright.report.terminal import WIDTH, print_assessment

ROOT = Path(__file__).parent.parent
EXAMPLE = ROOT / "examples" / "orchard-pear-cardamom.csv"


def refreshed(readme: str) -> str:
    """README.md with the example and its assessment as they are now."""
    out = io.StringIO()
    print_assessment(assess(read_formula(EXAMPLE)), Console(file=out, width=WIDTH, highlight=False))
    shown = "\n".join(line.rstrip() for line in out.getvalue().splitlines())
    readme = _between(readme, "formula", f"```csv\n{EXAMPLE.read_text(encoding='utf-8')}```")
    return _between(readme, "assessment", f"```text\n{shown}\n```")


def _between(text: str, mark: str, block: str) -> str:
    pattern = re.compile(f"(<!-- {mark} -->\n).*?(<!-- /{mark} -->)", re.DOTALL)
    return pattern.sub(lambda found: f"{found.group(1)}{block}\n{found.group(2)}", text)


if __name__ == "__main__":
    path = ROOT / "README.md"
    path.write_text(refreshed(path.read_text(encoding="utf-8")), encoding="utf-8")
