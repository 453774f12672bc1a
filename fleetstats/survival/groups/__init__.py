"""Groups, sources, causes and builds side by side."""
