"""Water, losses, pumps: formulas with their sources, no network and no verdict."""
