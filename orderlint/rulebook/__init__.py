"""Rule and policy files → a frozen rulebook: read, checked, expanded, lowered. Reads no order."""
