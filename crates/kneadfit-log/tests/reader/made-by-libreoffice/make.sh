#!/usr/bin/env bash
# Writes the workbooks of this folder anew from source.csv, with LibreOffice Calc (made with
# 7.4 from Debian's package libreoffice-calc). Dates and times of the source become cells with
# the formats of dates and times; semicolons.csv is the table as shown, in Windows-1252.
set -euo pipefail
cd "$(dirname "${BASH_SOURCE[0]}")"
profile=$(mktemp -d)
trap 'rm -rf "$profile"' EXIT
office() { soffice "-env:UserInstallation=file://$profile" --headless "$@" >/dev/null; }

# Commas, double quotes, UTF-8, from line 1, US English, quoted cells as text, special numbers found.
office "--infilter=CSV:44,34,76,1,,1033,false,true" --convert-to ods source.csv
for kind in xlsx xls; do
    office --convert-to "$kind" source.ods
done
# Semicolons, Windows-1252, cells as they are shown.
office --convert-to 'csv:Text - txt - csv (StarCalc):59,34,1,1,,1031,false,true' --outdir "$profile" source.ods
mv "$profile/source.csv" semicolons.csv
for kind in ods xlsx xls; do mv "source.$kind" "kitchen.$kind"; done
