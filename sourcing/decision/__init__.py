"""What the answer means. Knows one verb, `answer(problem) -> Plan`, and is handed it; reads no file, knows no solver."""
