"""An invented fleet with stated truth, to try the tool on."""
