"""Read interpretations from standard input, one JSON document a line, and list the findings.

ebbline interpret *.csv --json | python list_findings.py
"""

import json
import sys

for line in sys.stdin:
    document = json.loads(line)
    adopted = {one["id"] for one in document["rule_sets"] if one["adopted"]}
    for finding in document["findings"]:
        if finding["rule_set"] in adopted:
            file = document["test"]["file"]
            print(f"{file}: {finding['question']}: {finding['finding']}. {finding['because']}")
