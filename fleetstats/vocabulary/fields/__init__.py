"""The columns of each shape of records: our names, the words that clubs use, and what they hold."""
