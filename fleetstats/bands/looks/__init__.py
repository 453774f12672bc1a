"""Error held over repeated looks at records that grow."""
