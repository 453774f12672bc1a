"""Records that lie elsewhere, at a URL or in a database, drawn into the folder of their study."""
