"""What is odd in the records, and the account of every row."""
