"""The shop's database: schema as migrations, one way to write, typed reads. Only this room changes data by SQL."""
