"""What a dose does in a drink: clear or hazy, and how many mg/kg."""
