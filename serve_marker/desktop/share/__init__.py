"""The Share step: sheets, stills and tables."""
