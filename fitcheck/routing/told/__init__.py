"""Results reported for a routed line: pieces, clips, findings, reasons."""
