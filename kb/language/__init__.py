"""Medical English for matching words: spelling, plurals, drug names, abbreviations."""
