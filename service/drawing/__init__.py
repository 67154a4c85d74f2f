"""Plan views and worksheets of a solved vehicle, in any of the service's languages; pure."""
