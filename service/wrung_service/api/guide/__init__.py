"""The user's guide: Markdown of this package as plain pages that fetch nothing from elsewhere."""
