"""Speech models: the catalogue of those there are, and the shelf of those added."""
