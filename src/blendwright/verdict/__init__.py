"""What the numbers mean: classes, findings with stable codes, and the cautions printed always.

Rules and limits stand in data files with their edition and clause. No physics is computed here.
"""

from blendwright.verdict.finding import MOST_NAMES, Finding, Severity, gravest_first, listed

__all__ = ["MOST_NAMES", "Finding", "Severity", "gravest_first", "listed"]
