"""Sections of the page: what each shows, what it holds and its template, one file a section."""
