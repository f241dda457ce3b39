#!/usr/bin/env bash
# Writes anew what LibreOffice Calc made of two tables for the tests (with 7.4 from Debian's
# package libreoffice-calc): workbooks, in which dates and times of the source are cells with
# the formats of dates and times, and a CSV with semicolons in Windows-1252, cells as they are
# shown.
set -euo pipefail
cd "$(dirname "${BASH_SOURCE[0]}")/.."
scratch=$(mktemp -d)
trap 'rm -rf "$scratch"' EXIT
office() { soffice "-env:UserInstallation=file://$scratch/$system" --headless "$@" --outdir "$scratch" >/dev/null; }

# A system of another language: its decimal mark, its dates.
speak() {
    system=$1
    mkdir -p "$scratch/$system/user"
    cat >"$scratch/$system/user/registrymodifications.xcu" <<XML
<?xml version="1.0" encoding="UTF-8"?>
<oor:items xmlns:oor="http://openoffice.org/2001/registry">
<item oor:path="/org.openoffice.Setup/L10N"><prop oor:name="ooSetupSystemLocale" oor:op="fuse"><value>$system</value></prop></item>
</oor:items>
XML
}

# make FOLDER SOURCE.csv WORKBOOK SHOWN.csv SYSTEM: the CSV is shown as that system shows it.
make() {
    local folder=$1 source=${2%.csv} workbook=$3 shown=$4
    speak en-US
    # Commas, double quotes, UTF-8, from line 1, US English, quoted cells as text, special numbers found.
    office "--infilter=CSV:44,34,76,1,,1033,false,true" --convert-to ods "$folder/$source.csv"
    for kind in xlsx xls; do office --convert-to "$kind" "$scratch/$source.ods"; done
    for kind in ods xlsx xls; do cp "$scratch/$source.$kind" "$folder/$workbook.$kind"; done
    speak "$5"
    # Semicolons, Windows-1252, cells as they are shown.
    office --convert-to 'csv:Text - txt - csv (StarCalc):59,34,1,1,,1031,false,true' "$scratch/$source.ods"
    mv "$scratch/$source.csv" "$folder/$shown"
}

make crates/kneadfit-log/tests/reader/made-by-libreoffice source.csv kitchen semicolons.csv en-US
# The table as a German office saves it, with decimal commas.
make tests/cli/forty forty.csv forty german.csv de-DE
