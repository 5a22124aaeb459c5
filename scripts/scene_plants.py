"""plants.csv for a set of scenes: the tags with the pots' sizes that the truth file gives."""
import json
import sys

print("number,name,group,pot_top_mm,pot_bottom_mm,pot_height_mm,from,until,note")
seen = set()
for f in json.load(open(sys.argv[1]))["files"]:
    if f["tag"] in seen:
        continue
    seen.add(f["tag"])
    pot = f.get("pot") or {}
    sizes = [pot.get(k, "") for k in ("inner_diameter_top_mm", "inner_diameter_bottom_mm", "height_mm")]
    print(f'{f["tag"]},scene {f["tag"]},scenes,{sizes[0]},{sizes[1]},{sizes[2]},,,')
