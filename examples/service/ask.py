"""Start the service on this machine, send it the request of a file, and print the cards."""

import json
import subprocess
import sys
from pathlib import Path
from urllib.request import Request, urlopen

body = Path(sys.argv[1]).read_bytes()
hook = json.loads(body)["hook"]
command = ["orderlint", "serve", "--at", "2026-03-02T15:30:00-06:00"]
streams = {"stdout": subprocess.PIPE, "stderr": subprocess.DEVNULL, "text": True}
with subprocess.Popen(command, **streams) as service:
    address = service.stdout.readline().strip()
    services = json.load(urlopen(f"{address}/cds-services"))["services"]
    (name,) = [each["id"] for each in services if each["hook"] == hook]
    asked = Request(f"{address}/cds-services/{name}", body, {"Content-Type": "application/json"})
    cards = json.load(urlopen(asked))["cards"]
    service.terminate()
for card in cards:
    print(f"{card['indicator']}: {card['summary']}\n\n{card['detail']}")
