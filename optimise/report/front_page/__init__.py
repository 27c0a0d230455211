"""The front as one interactive page: `chart` draws two of the figures traded, `page` puts all into the templates."""
