"""The invented scenario that ships with the program: a shop, its workbook, and guided tours."""
