"""The house rules, one a file; the file name is the rule name."""
