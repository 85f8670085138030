"""Writes a fixture: what it is, then one record a line."""
import json


def write(path, script, records, **head):
    made = {"made_by": f"{script} with colour-science 0.4.7, numpy 2.4.6, scipy 1.17.1"}
    top = "".join(f"{json.dumps(key)}: {json.dumps(value)},\n" for key, value in (made | head).items())
    lines = ",\n".join("  " + json.dumps(record) for record in records)
    path.write_text(f'{{\n{top}"records": [\n{lines}\n]}}\n')
