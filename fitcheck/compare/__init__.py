"""More than one: scenarios side by side, or another mesh laid on the boat's.

Takes files; every run is sequential, what one of them cannot do is said of it alone, and what is
done is written before the next begins. `scenarios.compare_scenarios` and `meshes.compare_meshes`
are imported from where they stand: the one needs nothing of what the other loads.
"""
