"""fitcheck: does a modular seawater watermaker fit this boat, and will it be fed?"""

__version__ = "0.1.0"
