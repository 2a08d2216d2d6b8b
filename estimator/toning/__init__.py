"""Which toner for which zone: shades as absorption, mixes predicted, bowls shared, grams and minutes."""
