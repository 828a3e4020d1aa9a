"""What people see in a browser: pages for staff, the hooks of gateways, the JSON API. Every change goes
through bot/steps; pages read through the views of bot/store."""
