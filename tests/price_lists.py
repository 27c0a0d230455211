"""A mapping of a supplier's price list, for tests that only need one. All names are invented."""

MAP = """\
supplier = "north"
currency = "EUR"
decimal = "."
thousands = ""
delimiter = ","
encoding = "utf-8"
columns = { part = "code", price = "each" }
parts = { A1 = "BAR", Z9 = "TUBE" }
"""
