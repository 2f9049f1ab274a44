"""From plots to the town: designs, ratios, domains, intervals and their coverage."""
