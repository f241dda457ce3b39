#!/usr/bin/env bash
# Writes the files of this folder anew from forty.csv, forty batches of the demo, with
# LibreOffice Calc (made with 7.4 from Debian's package libreoffice-calc). Dates of the source
# become cells with the format of dates; german.csv is the table as a German office saves it:
# semicolons, decimal commas, Windows-1252, cells as they are shown.
set -euo pipefail
cd "$(dirname "${BASH_SOURCE[0]}")"
profile=$(mktemp -d)
trap 'rm -rf "$profile"' EXIT
office() { soffice "-env:UserInstallation=file://$profile" --headless "$@" >/dev/null; }

# Commas, double quotes, UTF-8, from line 1, US English, quoted cells as text, special numbers found.
office "--infilter=CSV:44,34,76,1,,1033,false,true" --convert-to ods forty.csv
for kind in xlsx xls; do
    office --convert-to "$kind" forty.ods
done
# The same office with a German system: semicolons, decimal commas, Windows-1252.
mkdir -p "$profile/user"
cat >"$profile/user/registrymodifications.xcu" <<'END'
<?xml version="1.0" encoding="UTF-8"?>
<oor:items xmlns:oor="http://openoffice.org/2001/registry">
<item oor:path="/org.openoffice.Setup/L10N"><prop oor:name="ooSetupSystemLocale" oor:op="fuse"><value>de-DE</value></prop></item>
</oor:items>
END
office --convert-to 'csv:Text - txt - csv (StarCalc):59,34,1,1,,1031,false,true' --outdir "$profile" forty.xlsx
mv "$profile/forty.csv" german.csv
