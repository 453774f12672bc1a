"""What the words of the records mean: which spellings are one word, and which words say nothing."""
