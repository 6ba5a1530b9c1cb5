#!/bin/sh
# plugin_template.sh SOURCE INSTALLED FOLDER HOST: copies the plugin template out of the tree, builds it against the
# installed library and lists it with a host that knows nothing of it.
set -eu
source=$1 installed=$2 folder=$3 host=$4
rm -rf "$folder"
mkdir -p "$folder"
cp -R "$source/examples/plugins/abi" "$source/examples/plugins/template" "$folder"
cmake -S "$folder/template" -B "$folder/build" -DCMAKE_PREFIX_PATH="$installed" -DCMAKE_CXX_COMPILER="${CXX:-g++}"
cmake --build "$folder/build"
sh "$source/tests/plugins/one_symbol.sh" nm "$folder/build/my_plugin.so"
"$host" list "$folder/build/my_plugin.so" | grep 'my_plugin 1.0'

printf 'rpm/throttle_pct,0,100\n1000,200,400\n9000,100,500\n' >"$folder/air.csv"
printf 'time_s,rpm,throttle_pct,air_kPa,air_degC\n0,1000,50,100,20\n1,9000,100,90,20\n' >"$folder/log.csv"
"$host" run --log "$folder/log.csv" --out "$folder/out.csv" --map air_mg="$folder/air.csv" \
  --number reference_kPa=100 --number reference_degC=20 "$folder/build/my_plugin.so"
printf 'time_s,charge_mg\n0,300\n1,450\n' | diff - "$folder/out.csv"
