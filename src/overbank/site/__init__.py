"""What stands in the water: one small class per structure, and the march from the tailwater upstream."""
