"""Floor 3: what the lives look like. Estimators and fitted families."""
