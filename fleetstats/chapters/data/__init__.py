"""Where rows came from and what became of them."""
