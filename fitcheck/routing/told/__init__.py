"""What a routed line is told as: pieces, clips, findings, reasons."""
