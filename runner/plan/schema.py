"""The JSON Schema of plan files; with it an editor completes and checks them."""

from __future__ import annotations

from typing import Any

from pydantic.json_schema import GenerateJsonSchema, JsonSchemaValue
from pydantic_core import core_schema

from runner.plan.models import Plan


class _FileSchema(GenerateJsonSchema):
    """A schema without null: a TOML file leaves a key out instead."""

    def nullable_schema(self, schema: core_schema.NullableSchema) -> JsonSchemaValue:
        """Only the schema of the value."""
        return self.generate_inner(schema["schema"])

    def dict_schema(self, schema: core_schema.DictSchema) -> JsonSchemaValue:
        """A table whose keys must have a form allows no other keys."""
        found = super().dict_schema(schema)
        return {**found, "additionalProperties": False} if "patternProperties" in found else found

    def default_schema(self, schema: core_schema.WithDefaultSchema) -> JsonSchemaValue:
        """Without a default of null."""
        if schema.get("default") is None:
            return self.generate_inner(schema["schema"])
        return super().default_schema(schema)


def json_schema() -> dict[str, Any]:
    """The schema as plain data. It leaves what involves several keys to `matside check`."""
    schema = Plan.model_json_schema(schema_generator=_FileSchema)
    required = set(schema.pop("required"))
    shelf = {"not": {"anyOf": [{"required": ["title"]}, {"required": ["session"]}]}}
    taking = {"required": sorted({*required, "include"} - {"exercise"})}
    return {
        "$schema": GenerateJsonSchema.schema_dialect,
        **schema,
        "title": "matside plan",
        "description": "A plan of strength sessions for matside, or a shelf to take from.",
        "anyOf": [{"required": sorted(required)}, taking, shelf],
    }
