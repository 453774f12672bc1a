"""A file as supplied beside what is made of it: guesses, open questions, columns and words."""
