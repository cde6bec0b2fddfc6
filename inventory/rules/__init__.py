"""What a person could work out on paper: tables, arithmetic and wording. No clock, no database."""
