"""Results as files: folders, tables, workbooks, samples, the manifest."""
