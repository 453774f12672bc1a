"""Rows that hint at trouble, found as a file is read, whatever is made of them later."""
