"""From rota and log to days: what to study when, within the minutes there are."""
