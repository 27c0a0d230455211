"""The build sheet: a record as one page for the shop and the bench.

`lamp` says what is known of a light, and one module for each part of the page makes plain values and drawings of it;
`page` alone knows the templates.
"""
