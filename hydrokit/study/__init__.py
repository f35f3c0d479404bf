"""A site, its notebooks and its reports: the only room that knows Jupyter, plots and screens."""
