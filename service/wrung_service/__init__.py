"""The HTTP service around `wrung`. `wrung_service.app.create_app` puts it together."""
