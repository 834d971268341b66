#!/bin/sh
# The drawing and browser tests measure with programs from Debian, not from PyPI: poppler-utils (pdftotext,
# pdftoppm, pdffonts), qpdf, GDAL (it reads the DXF independently), and Chromium. Install what is missing when
# root; otherwise say what to install.
set -eu
missing=""
command -v pdftotext >/dev/null 2>&1 || missing="$missing poppler-utils"
command -v qpdf >/dev/null 2>&1 || missing="$missing qpdf"
command -v ogr2ogr >/dev/null 2>&1 || missing="$missing gdal-bin"
command -v chromium >/dev/null 2>&1 || missing="$missing chromium"
[ -z "$missing" ] && exit 0
if [ "$(id -u)" = 0 ] && command -v apt-get >/dev/null 2>&1; then
  echo "installing for the tests:$missing"
  apt-get update -qq && DEBIAN_FRONTEND=noninteractive apt-get install -y -qq --no-install-recommends $missing >/dev/null
else
  echo "The tests also need:$missing. On Debian: sudo apt-get install$missing"
  exit 1
fi
