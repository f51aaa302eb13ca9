#!/bin/sh
# Remakes psychrolib.csv beside it: psychrometrics by an independent implementation, the npm package
# psychrolib (MIT), against which tests/unit/air checks ours. Needs node, npm and the network.
set -eu
here=$(cd "$(dirname "$0")" && pwd)
work=$(mktemp -d)
trap 'rm -rf "$work"' EXIT
cd "$work"
npm install --silent --no-fund --no-audit --prefix "$work" psychrolib@1.1.1 >/dev/null
cat > table.js <<'JS'
const p = require('psychrolib');
p.SetUnitSystem(p.SI);
console.log('# made by remake-psychrolib.sh from npm psychrolib 1.1.1 (MIT)');
console.log('t_c,rh_pct,pressure_pa,saturation_pa,vapour_pa,humidity_ratio,dew_point_c,vpd_pa');
const row = (...numbers) => console.log(numbers.map(String).join(','));
for (const pressure of [101325, 89875]) {            // sea level and 1000 m
  for (let t = -10; t <= 45; t += 2.5) {
    for (const rh of [10, 30, 50, 70, 80, 85, 90, 95, 100]) {
      const w = p.GetHumRatioFromRelHum(t, rh / 100, pressure);
      row(t, rh, pressure, p.GetSatVapPres(t), p.GetVapPresFromRelHum(t, rh / 100), w,
          p.GetTDewPointFromRelHum(t, rh / 100), p.GetVaporPressureDeficit(t, w, pressure));
    }
  }
}
JS
NODE_PATH="$work/node_modules" node table.js > "$work/psychrolib.csv"
mv "$work/psychrolib.csv" "$here/psychrolib.csv"
echo "$(grep -c . "$here/psychrolib.csv") lines in $here/psychrolib.csv"
