"""Who may do what: identity, PINs and the rule of authority."""
