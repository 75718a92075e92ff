"""From arrays of levels and margins to figures with their intervals; knows nothing of sites or studies."""
