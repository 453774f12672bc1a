"""Lives as a caller gives them."""
