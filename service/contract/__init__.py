"""The wire: structs, problems and the OpenAPI document."""
