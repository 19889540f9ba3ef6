"""The counter page: the whole job in a browser, on the shop's own machine."""
