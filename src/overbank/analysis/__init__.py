"""From arrays of levels and depths over the bank to figures with their intervals; knows nothing of sites or studies."""
