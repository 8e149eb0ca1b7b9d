"""How an assessment is shown: terminal text and JSON. Nothing is computed here."""
