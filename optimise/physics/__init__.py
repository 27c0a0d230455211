"""Pure functions on floats and numpy arrays, SI units (with lm, lx, deg and °C where stated).

Nothing here knows a part, a file or a unit library; every function names the source of its formula.
"""
