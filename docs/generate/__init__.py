"""What the build puts into the pages."""
