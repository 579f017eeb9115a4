"""Shipment receiving for field merchandising: prove what arrived, and know where it goes.

A carton's label travels one way through the package:
expected -> reading -> matching -> staging -> closing.
"""

__version__ = "0.1.0"
