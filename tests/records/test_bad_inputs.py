"""A catalogue of bad inputs, each with its verdict and the words of its message."""
# ruff: noqa: E501 - a case is read as one row of a table

import os
import re

import pytest

from trialkit.records.check import check_trial
from trialkit.records.problems import format_problems
from trialkit.records.read import read_trial
from trialkit.records.trial import TrialDataError

R = "readings"
# id, file, text to replace (first time), new text, level, words of message or fix
CASES = [
    # numbers
    ("letters", R, "haze,21.3", "haze,abc", "refuse", "not a number"),
    ("decimal comma", R, "haze,21.3,", 'haze,"21,3",', "refuse", "a comma stands in the number"),
    ("thousands", R, "haze,21.3,", 'haze,"1,021.3",', "refuse", "mark for thousands"),
    ("thousands point", R, "haze,21.3,", 'haze,"1.021,3",', "refuse", "mark for thousands"),
    ("apostrophe thousands", R, "haze,21.3,", "haze,1'021,", "refuse", "mark for thousands"),
    ("inner space", R, "haze,21.3", "haze,21 .3", "refuse", "not a number"),
    ("two points", R, "haze,21.3", "haze,2.1.3", "refuse", "more than one point"),
    ("cut number", R, "haze,21.3", "haze,21.", "refuse", "ends in its point"),
    ("lost point", R, "haze,0.28", "haze,028", "refuse", "needless 0"),
    ("letter O", R, "haze,0.28", "haze,O.28", "refuse", "looks like a digit"),
    ("letter l", R, "haze,21.3", "haze,2l.3", "refuse", "looks like a digit"),
    ("exponent", R, "haze,21.3", "haze,2E1", "refuse", "exponent"),
    ("signed exponent", R, "haze,21.3", "haze,2.13E+01", "warn", "exponent"),
    ("underscore", R, "haze,21.3", "haze,2_1.3", "refuse", "not a number"),
    ("hexadecimal", R, "haze,21.3", "haze,0x15", "refuse", "not a number"),
    ("arabic digits", R, "haze,21.3", "haze,٢١", "refuse", "digits of another script"),
    ("word for nothing", R, "haze,21.3", "haze,n/a", "refuse", "'nothing'"),
    ("nan", R, "haze,21.3", "haze,NaN", "refuse", "'nothing'"),
    ("dash", R, "haze,21.3", "haze,-", "refuse", "'nothing'"),
    ("infinity", R, "haze,21.3", "haze,inf", "refuse", "infinity"),
    ("below detection", R, "haze,21.3", "haze,BDL", "refuse", "without its limit"),
    ("boolean", R, "haze,21.3", "haze,TRUE", "refuse", "yes or no"),
    ("error value", R, "haze,21.3", "haze,#DIV/0!", "refuse", "error value"),
    ("formula", R, "haze,21.3", "haze,=A1+1", "refuse", "formula"),
    ("date for number", R, "haze,21.3", "haze,21-Mar", "refuse", "a date stands"),
    ("iso date for number", R, "haze,21.3", "haze,2031-03-21", "refuse", "a date stands"),
    ("clock for number", R, "haze,21.3", "haze,21:30", "refuse", "clock time stands"),
    ("range", R, "haze,21.3", "haze,20-22", "refuse", "a range stands"),
    ("doubt", R, "haze,21.3", "haze,21.3?", "refuse", "mark of doubt"),
    ("about", R, "haze,21.3", "haze,~21", "refuse", "mark of doubt"),
    ("lone limit", R, "haze,21.3", "haze,<", "refuse", "limit sign"),
    ("late limit", R, "haze,21.3", "haze,21<", "refuse", "limit sign"),
    ("less or equal", R, "haze,21.3", "haze,≤21", "refuse", "limit sign"),
    ("too large", R, "haze,21.3", "haze,2130", "refuse", "can only lie"),
    ("negative value", R, "haze,21.3", "haze,-21.3", "refuse", "can only lie"),
    ("unit in cell differs", R, "haze,21.3", "haze,21.3 FNU", "refuse", "another unit"),
    ("empty value", R, "haze,21.3", "haze,", "warn", "not read"),
    ("odd limit", R, "haze,21.3", "haze,<21.3", "warn", "other readings reach or go beyond"),
    ("stray limit sign", R, "K01,R01,8,clarity,12", "K01,R01,8,clarity,>12", "warn", "reach or go beyond"),
    ("limits at the end of a scale", R, None, lambda t: t.replace("K01,R01,8,clarity,12", "K01,R01,8,clarity,>12")
     .replace("K03,R01,8,clarity,12", "K03,R01,8,clarity,>12"), "warn", "reach or go beyond"),
    ("all rounded", R, None, lambda text: "".join(
        ",".join([*c[:4], str(round(float(c[4]))), *c[5:]]) if c[3] == "haze" else ",".join(c)
        for c in (line.split(",") for line in text.splitlines(keepends=True))), "warn",
     "rounded more than their instrument"),
    ("finer than instrument", R, "haze,21.3", "haze,21.333", "warn", "more digits"),
    ("jump", R, "K01,R01,4,haze,0.28", "K01,R01,4,haze,280", "warn", "unusual"),
    ("full-width digits", R, "haze,21.3", "haze,２１.３", "refuse", "digits of another script"),
    ("superscript", R, "haze,21.3", "haze,21.3²", "refuse", "only looks like"),
    ("per cent", R, "haze,21.3", "haze,21.3%", "refuse", "another unit"),
    ("n.a.", R, "haze,21.3", "haze,n.a.", "refuse", "'nothing'"),
    ("dots", R, "haze,21.3", "haze,...", "refuse", "'nothing'"),
    ("overload", R, "haze,21.3", "haze,OL", "refuse", "Write > and the highest value"),
    ("word for high", R, "haze,21.3", "haze,HI", "refuse", "beyond its range"),
    ("unseen in a number", R, "haze,21.3", "haze,21.3\u200b", "refuse", "cannot be seen stands in the number"),
    ("exponent of three digits", R, "haze,21.3", "haze,1E+400", "refuse", "exponent"),
    ("one point among commas", R, None, lambda t: t.replace(",", ";").replace(".", ",").replace("21,3;", "21.3;"),
     "refuse", "a point stands in the number"),
    ("one point among thousands", R, None, lambda t: re.sub(r"haze,[0-9.]+", "haze;1,234", t).replace(",", ";", 0)
     .replace("haze;1,234", 'haze,"1,234"'), "refuse", "mark for thousands"),
    ("lot as date", "mixes", "A1,38", "2-Nov,38", "warn", "that a spreadsheet made"),
    ("lot as month", "mixes", "A1,38", "Nov-24,38", "warn", "that a spreadsheet made"),
    ("lot with exponent", "mixes", "A1,38", "3.00E+05,38", "warn", "that a spreadsheet made"),
    ("volume in another unit", "vessels", "1,b,20", "1,b,20 mL", "refuse", "a unit or a remark"),
    ("currency", "mixes", "A1,38,4.5", "A1,38,€4.5", "refuse", "currency sign"),
    ("decimal commas in times", R, None, lambda t: "".join(
        re.sub(r"(R0.,)([0-9.]+)", lambda m: m[1] + f"{float(m[2]):.1f}".replace(".", ","), line) + "\n"
        for line in t.replace(",,,,\n", ",,,\n").splitlines()), "refuse", "If a decimal comma stands"),
    ("entity", R, "haze,21.3", "haze,&lt;21", "refuse", "not a number"),
    ("beyond the ceiling", R, "K01,R01,8,clarity,12", "K01,R01,8,clarity,21", "warn",
     "better than that of purified water"),
    ("murky reference", R, "K05,R01,1,clarity,12", "K05,R01,1,clarity,3", "warn",
     "purified water reads worse"),
    ("values in reverse", R, None, lambda text: "".join(
        ",".join([*c[:2], str(8.5 - float(c[2])) if float(c[2]) < 9 else c[2], *c[3:]])
        if c[0] != "vessel" else ",".join(c)
        for c in (line.split(",") for line in text.splitlines(keepends=True))), "warn",
     "gets worse in most vessels"),
    # codes
    ("unknown vessel", R, "K01,R01,0.5,haze", "K09,R01,0.5,haze", "refuse", "no such vessel"),
    ("empty vessel", R, "K01,R01,0.5,haze", ",R01,0.5,haze", "refuse", "vessel is missing"),
    ("lost zero", R, "K01,R01,0.5,haze", "K1,R01,0.5,haze", "refuse", "lost a digit"),
    ("cyrillic", R, "K01,R01,0.5,haze", "К01,R01,0.5,haze", "refuse", "only looks right"),
    ("letter o in code", R, "K01,R01,0.5,haze", "KO1,R01,0.5,haze", "refuse", "only looks right"),
    ("date for code", R, "K01,R01,0.5,haze", "1-Jan,R01,0.5,haze", "refuse", "may have changed"),
    ("number for code", R, "K01,R01,0.5,haze", "3E5,R01,0.5,haze", "refuse", "may have changed"),
    ("full-width code", R, "K01,R01,0.5,haze", "\uff2b01,R01,0.5,haze", "refuse", "only looks right"),
    ("letter l in code", R, "K01,R01,0.5,haze", "K0l,R01,0.5,haze", "refuse", "only looks right"),
    ("instrument of another", R, "K01,R01,168,salinity,33.1,PSU,top,,,", "K01,R01,168,salinity,33.1,PSU,top,,T01,",
     "refuse", "instrument T01 is declared for haze"),
    ("empty quantity", R, "0.5,haze", "0.5,", "refuse", "the quantity is missing"),
    ("unknown rater", R, "K01,R01,0.5,haze", "K01,R03,0.5,haze", "refuse", "no such rater"),
    ("unknown quantity", R, "0.5,haze", "0.5,hazee", "refuse", "quantity is not known"),
    ("unknown unit", R, "21.3,NTU", "21.3,NTX", "refuse", "not a unit of haze"),
    ("unit of another", R, "21.3,NTU", "21.3,lines", "refuse", "not a unit of haze"),
    ("empty unit", R, "21.3,NTU", "21.3,", "refuse", "unit of haze is missing"),
    ("unit not instrument's", R, "21.3,NTU", "21.3,FNU", "refuse", "instrument T01 is declared"),
    ("unknown instrument", R, "NTU,,,T01", "NTU,,,T02", "refuse", "no such instrument"),
    ("no instrument", R, "NTU,,,T01", "NTU,,,", "warn", "instrument differs"),
    ("unknown position", R, "PSU,top", "PSU,above", "refuse", "position is not known"),
    ("lost position", R, "PSU,top", "PSU,", "warn", "no position"),
    ("repeat not a number", R, "NTU,,,T01", "NTU,,x,T01", "refuse", "repeat number"),
    ("repeat without first", R, "NTU,,,T01", "NTU,,2,T01", "warn", "do not count"),
    # times
    ("negative time", R, "R01,0.5,haze", "R01,-0.5,haze", "refuse", "negative"),
    ("after the window", R, "K01,R01,8,haze", "K01,R01,12,haze", "refuse", "after the window"),
    ("a little late", R, "K01,R01,8,haze", "K01,R01,8.1,haze", "warn", "a little after"),
    ("off schedule", R, "K01,R01,8,haze", "K01,R01,6.5,haze", "warn", "far from every scheduled"),
    ("off habit", R, "K01,R01,8,haze", "K01,R01,7.9,haze", "warn", "as others are"),
    ("empty time", R, "R01,0.5,haze", "R01,,haze", "refuse", "time is missing"),
    ("clock as time", R, "R01,0.5,haze", "R01,0:30,haze", "refuse", "clock time stands"),
    ("minutes among hours", R, "K01,R01,0.5,haze", "K01,R01,30 min,haze", "refuse", "in h, without its"),
    ("clock with a point", R, "K01,R01,0.5,haze", "K01,R01,12.05,haze", "refuse", "after the window"),
    ("duration", R, "K01,R01,0.5,haze", "K01,R01,PT30M,haze", "refuse", "not a number"),
    # rows
    ("headings again", R, "K01,R01,2,haze",
     "vessel,rater,elapsed_h,quantity,value,unit,position,repeat,instrument,note\nK01,R01,2,haze",
     "refuse", "headings stand here once more"),
    ("saved twice", R, None, lambda text: text + text, "refuse", "headings stand here once more"),
    ("byte order mark within", R, "K03,R01,1,haze", "\ufeffK03,R01,1,haze", "refuse", "cannot be seen"),
    ("double row", R, "K01,R01,0.5,haze,21.3,NTU,,,T01,\n", "K01,R01,0.5,haze,21.3,NTU,,,T01,\n" * 2,
     "refuse", "stands twice"),
    ("conflicting double", R, "K01,R01,0.5,haze,21.3,NTU,,,T01,\n",
     "K01,R01,0.5,haze,21.3,NTU,,,T01,\nK01,R01,0.5,haze,22,NTU,,,T01,\n", "refuse", "twice, with two values"),
    ("footnote", R, None, lambda t: t + "* by torch\n", "refuse", "remarks go into the column note"),
    ("lost row", R, "K01,R01,2,haze,2.31,NTU,,,T01,\n", "", "warn", "planned reading of haze"),
    ("short row", R, "K01,R01,2,haze,2.31,NTU,,,T01,\n", "K01,R01,2,haze,2.31\n", "refuse", "5 cells"),
    ("long row", R, "2.31,NTU,,,T01,\n", "2.31,NTU,,,T01,,\n", "refuse", "11 cells"),
    ("other separator", R, "K01,R01,2,haze,2.31,NTU,,,T01,", "K01;R01;2;haze;2.31;NTU;;;T01;",
     "refuse", "not a semicolon"),
    ("open quote", R, "K01,R01,2,haze", '"K01,R01,2,haze', "refuse", "quotation mark"),
    ("quote in note", R, "lid was closed", 'lid 5" wide', "warn", "not quoted"),
    ("blank row", R, "K01,R01,2,haze", "\nK01,R01,2,haze", "note", "blank row"),
    ("no line end", R, "33.4,PSU,bottom,,,\n", "33.4,PSU,bottom,,,", "warn", "no line end"),
    # columns
    ("heading missing", R, "value,unit", "valeu,unit", "refuse", "column value is missing"),
    ("heading in another word", R, "value,unit", "Reading,unit", "refuse", "if that holds it"),
    ("bare decimal comma", R, "haze,21.3,", "haze,21,3,", "refuse", "If a decimal comma stands"),
    ("heading twice", R, "repeat,instrument", "unit,instrument", "refuse", "two columns"),
    ("heading empty", R, "repeat,instrument", ",instrument", "refuse", "heading is empty"),
    ("unknown column", R, "repeat,instrument", "again,instrument", "warn", "does not know this column"),
    ("swapped headings", R, "vessel,rater,", "rater,vessel,", "refuse", "look swapped"),
    ("swapped value", R, "quantity,value,unit", "value,quantity,unit", "refuse", "look swapped"),
    ("no time column", R, "elapsed_h", "elapsed", "refuse", "no column tells the time"),
    ("time unit", R, "elapsed_h", "elapsed_min", "refuse", "fit the schedule as hours"),
    ("pipes", R, None, lambda text: text.replace(",", "|"), "refuse", "separated by none of"),
    ("heading with unit", R, "value,unit", "value (NTU),unit", "refuse", "Rename the heading .value"),
    ("time in brackets", R, "elapsed_h", "Elapsed (h)", "refuse", "Rename the heading .elapsed .h"),
    ("title above", R, None, lambda t: "My trial\n\n" + t, "refuse", "Take away rows 1 to 2"),
    ("note on the separator above", R, None, lambda t: "sep=,\n" + t, "refuse", "headings stand in row 2"),
    ("rows quoted whole", R, None, lambda t: "".join(f'"{line}"\n' for line in t.splitlines()), "refuse",
     "marks stand around whole rows"),
    ("one row quoted whole", R, "K01,R01,2,haze,2.31,NTU,,,T01,", '"K01,R01,2,haze,2.31,NTU,,,T01,"',
     "refuse", "around the whole row"),
    ("readings without headings", R, None, lambda t: t.partition("\n")[2], "refuse", "none of the headings"),
    ("foreign headings", R, "vessel,rater,elapsed_h,quantity,value,unit,position,repeat,instrument,note",
     "Gefäß,Leser,Zeit,Größe,Wert,Einheit,Ort,Nr,Gerät,Notiz", "refuse", "none of the headings"),
    # whole file
    ("UTF-16 without mark", R, None, lambda t: t.encode("utf-16-le"), "refuse", "without the mark"),
    ("column moved down", R, None, lambda t: _moved_down(t, 4, 30), "warn", "purified water reads worse"),
    ("empty file", R, None, lambda text: "", "refuse", "file is empty"),
    ("headings only", R, None, lambda text: text.split("\n")[0] + "\n", "warn", "no readings yet"),
    ("half a file", R, None, lambda text: "\n".join(text.split("\n")[:41]) + "\n", "warn",
     "planned round"),
    ("cp1252", R, None, lambda t: t.replace("lid was", "Döckel").encode("cp1252"), "warn",
     "Windows-1252"),
    ("mojibake", R, "lid was", "DÃ¶ckel", "warn", "garbled"),
    ("nul", R, "lid was", "lid\0was", "refuse", "NUL"),
    ("undecodable", R, None, lambda t: t.encode() + b"\x81\x8d\n", "refuse", "no encoding"),
    ("workbook as csv", R, None, lambda t: b"PK\x03\x04" + t.encode(), "refuse", "workbook, not"),
    ("control character", R, "lid was", "lid\x1bwas", "refuse", "control characters"),
    ("bidi", R, "lid was", "lid\u202ewas", "warn", "cannot be seen"),
    ("mixed decimal marks", R, None, lambda t: t.replace(",", ";").replace("21.3", "21,3"), "refuse",
     "a comma stands"),
    ("all equal", R, None, lambda t: "".join(
        line.replace(line.split(",")[4], "5", 1) if ",haze," in line else line
        for line in t.splitlines(keepends=True)), "warn", "all readings of a quantity are equal"),
    ("names a mix", R, "lid was closed", "smells like Birch", "warn", "unblinded"),
    ("slipped note", R, "NTU,,,T01,", "NTU,,,T01,21.3", "warn", "slip"),
    # the small tables
    ("two vessels", "vessels", "K02,trial", "K01,trial", "refuse", "more than one row"),
    ("bad role", "vessels", "K02,trial", "K02,tank", "refuse", "role is not known"),
    ("no reference", "vessels", "K05,reference", "K05,trial", "refuse", "no vessel has the role"),
    ("unknown mix", "vessels", "08:05:00,M02", "08:05:00,M09", "refuse", "no such mix"),
    ("lost mix", "vessels", "08:05:00,M02", "08:05:00,", "refuse", "no mix while others"),
    ("bad code", "vessels", "K02,trial", "E02,trial", "refuse", "not a code"),
    ("day and month", "vessels", "2031-04-02T08:05:00", "02/04/2031 08:05", "refuse", "day and month"),
    ("wrong year", "vessels", "2031-04-02T08:05:00", "2013-04-02T08:05:00", "refuse", "far from"),
    ("same place", "vessels", "1,b,20", "1,a,20", "warn", "stands in this place"),
    ("other volume", "vessels", "d,20,790", "d,200,790", "warn", "different volumes"),
    ("odd dose", "vessels", "d,20,790", "d,20,7900", "warn", "dose per litre"),
    ("mix in two blocks", "vessels", "08:05:00,M02", "08:05:00,M01", "warn", "more than once|numbers"),
    ("two mixes", "mixes", "M02,Birch", "M01,Birch", "refuse", "more than one row"),
    ("mix without name", "mixes", "M02,Birch", "M02,", "refuse", "name is missing"),
    ("dose in words", "mixes", "A1,38", "A1,forty", "refuse", "not a number"),
    ("two raters", "raters", "R02,Ben", "R01,Ben", "refuse", "more than one row"),
    ("silent rater", "raters", "R02,Ben", "R02,Ben\nR03,Cy", "warn", "has no reading"),
    ("volume in gallons", "vessels", "1,b,20", "1,b,5 gal", "refuse", "a unit or a remark"),
    ("formula for volume", "vessels", "1,b,20", "1,b,=10*2", "refuse", "a formula stands"),
    ("start in 12 hours", "vessels", "2031-04-02T08:05:00", "2031-04-02 8:05 AM", "refuse", "24-hour"),
    ("start at 24:00", "vessels", "2031-04-02T08:05:00", "2031-04-02T24:00", "refuse", "no such date"),
    ("start as serial", "vessels", "2031-04-02T08:05:00", "47940.3368", "refuse", "a number stands"),
    ("start emptied", "vessels", "2031-04-02T08:05:00", "", "warn", "start in trial.toml was taken"),
    ("dose in kg", "vessels", "d,20,790", "d,20,0.79", "warn", "dose per litre"),
    ("name in two lines", "mixes", "Birch", '"Bi\nrch"', "refuse", "line break"),
    ("names alike", "mixes", "M02,Birch", "M02,ALDER ", "warn", "only in capitals"),
    ("lot filled down", "mixes", "B7,39.5", "A1,39.5", "warn", "this lot stands in another row"),
    ("label dose of a tenth", "mixes", "A1,38,", "A1,3.8,", "warn", "label dose is unusual"),
    ("price without its point", "mixes", "39.5,3.9", "39.5,95", "warn", "many times what another"),
    ("doses dragged", "vessels", None, lambda t: _in_rows(t, 5, ["760", "770", "780", "790", ""]),
     "warn", "equal steps"),
    ("dose filled down", "vessels", None, lambda t: _seven(t, [760, 760, 760, 755, 771, 748, 763]),
     "warn", "stays the same"),
    ("dose emptied", "vessels", "c,20,760", "c,20,", "warn", "empty while others"),
    ("place emptied", "vessels", "2,c,20", "2,,20", "warn", "empty while others"),
    ("volumes emptied", "vessels", None, lambda t: t.replace(",20,", ",,"), "warn", "usual column is missing"),
    ("dose dragged over a vessel", "vessels", "d,20,790", "d,20,0", "warn", "dose per litre is unusual"),
    ("starts dragged by seconds", "vessels", None, lambda t: t.replace("08:10:00", "08:15:01"), "warn",
     "differ by seconds"),
    ("dose of another mix", "vessels", None, lambda t: _seven(t, [760, 761, 759, 790, 798, 760, 761]), "warn",
     "as no other vessel's does"),
    ("salt in the reference", "vessels", "e,20,,", "e,20,7,", "warn", "has a dose of salt"),
    ("no lots", "mixes", None, lambda t: t.replace("A1", "").replace("B7", ""), "note", "usual column is missing"),
    ("name of a rater emptied", "raters", None, lambda t: t.replace("Ben", "") + "R03,Cy\n", "warn",
     "empty while others"),
    # trial.toml
    ("claim about another mix", "trial", "Clear within the hour", "Alder is clear within the hour", "warn",
     "names another mix"),
    ("claim with another code", "trial", None, lambda t: t.replace("Clear within", "Birch is clear within").replace(
        'mix = "M02"', 'mix = "M01"'), "warn", "names another mix"),
    ("criterion copied", "trial", "[claims.", '[criteria.copy]\nquantity = "haze"\nunit = "NTU"\n'
     'tolerance = 0.3\nhold = 2\nrater_rule = "majority"\n[claims.', "warn", "says the same"),
    ("claim copied", "trial", "[instruments.", '[claims.copy]\ntext = "Again"\nmix = "M02"\n'
     'criterion = "clarity"\nwithin_h = 1\n[instruments.', "warn", "says the same"),
    ("tolerance taken out", "trial", "tolerance = 0.3\n", "", "warn", "the key is missing; 0 was taken"),
    ("rule taken out", "trial", 'rater_rule = "majority"\n', "", "warn", 'missing; "majority" was'),
    ("resolution taken out", "trial", "resolution = 0.01\n", "", "note", "resolution is not given"),
    ("target of a tenth", "trial", "salinity = 33", "salinity = 3.3", "warn", "possible but unusual"),
    ("empty toml", "trial", None, lambda text: "", "refuse", "file is empty"),
    ("key twice", "trial", "seed = 11", "seed = 11\nseed = 12", "refuse", "not TOML"),
    ("table twice", "trial", "[storage]", "[storage]\ndays = [7]\n[storage]", "refuse", "not TOML"),
    ("mistyped key", "trial", "tolerance = 0.3", "toleranc = 0.3", "warn", "mean tolerance"),
    ("mistyped table", "trial", "[claims.within", "[claim.within", "warn", "mean claims"),
    ("mistyped choice", "trial", 'quantity = "haze"', 'quantity = "hase"', "refuse", "mean haze"),
    ("smart quotes", "trial", '"UTC"', "“UTC”", "refuse", "not TOML"),
    ("date alone", "trial", "2031-04-02T08:00:00", "2031-04-02", "refuse", "date with its time"),
    ("decimal commas in a list", "trial", "[0.5, 1,", "[0,5, 1,", "refuse", "point for decimals"),
    ("claim past the window", "trial", "within_h = 1", "within_h = 100", "warn", "after the window"),
    ("claim against itself", "trial", "within_h = 1", 'before = "M02"', "refuse", "before itself"),
    ("reserved name", "trial", "[criteria.haze]", '[criteria."fully clear"]', "refuse", "stands for all"),
    ("zone as path", "trial", '"UTC"', '"../../etc/passwd"', "refuse", "not a time zone"),
    ("toml syntax", "trial", "seed = 11", "seed = ", "refuse", "not TOML"),
    ("toml comma", "trial", "tolerance = 0.3", "tolerance = 0,3", "refuse", "not TOML"),
    ("no title", "trial", 'title = "Two blends on a bench"\n', "", "refuse", "key is missing"),
    ("text for number", "trial", "window_h = 8", 'window_h = "8"', "refuse", "number must stand"),
    ("falling schedule", "trial", "2, 4, 8]", "4, 2, 8]", "refuse", "must rise"),
    ("schedule past window", "trial", "2, 4, 8]", "2, 4, 9]", "refuse", "must lie"),
    ("bad zone", "trial", '"UTC"', '"Mars/Base"', "refuse", "not a time zone"),
    ("unknown family", "trial", "seed = 11", 'seed = 11\nfamily = "normal"', "refuse", "choices"),
    ("unknown key", "trial", "seed = 11", "seed = 11\nsede = 12", "warn", "does not know this key"),
    ("claim of no mix", "trial", 'mix = "M02"', 'mix = "M07"', "refuse", "no such code"),
    ("quantity of no kind", "trial", 'quantity = "haze"', 'quantity = "fog"', "refuse", "choices"),
    ("unit of no kind", "trial", 'unit = "NTU"\ntol', 'unit = "lines"\ntol', "refuse", "not a unit"),
    ("no author", "trial", "seed = 11", "seed = 11\nauthors = []", "refuse", "list of authors"),
    ("author by number", "trial", "seed = 11", "seed = 11\nauthors = [7]", "refuse", "neither name nor"),
    ("author unnamed", "trial", "seed = 11", 'seed = 11\nauthors = [{given_names = "A"}]', "refuse",
     "author 1 is not named"),
    ("author's id", "trial", "seed = 11",
     'seed = 11\nauthors = [{name = "A", orcid = "0000-0002-1825-0079"}]', "refuse", "not an ORCID"),
    ("author's key", "trial", "seed = 11", 'seed = 11\nauthors = [{name = "A", mail = "a"}]', "warn",
     "does not know this key"),
    ("round lost in plan", "trial", "2, 4, 8]", "2, 3, 4, 8]", "warn", "planned round"),
]  # fmt: skip


def _moved_down(text, column, start):
    rows = [line.split(",") for line in text.splitlines()]
    cells = [row[column] for row in rows[start:]]
    for row, cell in zip(rows[start:], [cells[0], *cells], strict=False):
        row[column] = cell
    return "\n".join(map(",".join, rows)) + "\n"


def _in_rows(text, column, cells):
    head, *rows = [line.split(",") for line in text.splitlines()]
    for row, cell in zip(rows, cells, strict=True):
        row[column] = cell
    return "\n".join(map(",".join, [head, *rows])) + "\n"


def _seven(text, doses):
    """Seven trial vessels of these doses, beside the reference."""
    head, *rows, reference = text.splitlines()
    rows += [rows[0].replace("K01", f"L{i:02d}").replace("a,20", f"x{i},20") for i in range(3)]
    lines = _in_rows("\n".join([head, *rows]) + "\n", 5, [str(dose) for dose in doses])
    return lines + reference + "\n"


def _damaged(name, old, new):
    from tests.records import conftest as base

    text = {
        "readings": base.readings_text(),
        "vessels": base.VESSELS,
        "mixes": base.MIXES,
        "raters": base.RATERS,
        "trial": base.TOML,
    }[name]
    if old is None:
        return new(text)
    assert old in text
    return text.replace(old, new, 1)


@pytest.mark.parametrize("case", CASES, ids=[case[0] for case in CASES])
def test_each_bad_input_has_its_verdict_and_words(make_folder, case):
    _, name, old, new, level, words = case
    folder = make_folder(**{name: _damaged(name, old, new)})
    problems = check_trial(folder)
    hit = problems[(problems["message"] + problems["fix"]).str.contains(words, regex=True)]
    assert not hit.empty, format_problems(problems)
    assert hit["level"].iloc[0] == level, format_problems(problems)
    refused = (problems["level"] == "refuse").any()
    if refused:
        with pytest.raises(TrialDataError):
            read_trial(folder)
    else:
        assert len(read_trial(folder).problems) == len(problems)


def test_the_catalogue_is_long_enough():
    assert len(CASES) >= 70


@pytest.mark.parametrize(
    ("name", "words"),
    [("trial.toml", "missing"), ("mixes.csv", "missing"), ("vessels.csv", "missing"),
     ("raters.csv", "missing"), ("readings.csv", "missing")],
)  # fmt: skip
def test_a_missing_file_is_named(folder, name, words):
    (folder / name).unlink()
    problems = check_trial(folder)
    hit = problems[problems["file"] == name]
    assert hit["message"].str.contains(words).any()
    assert (hit["level"] == "refuse").any()


@pytest.mark.parametrize(
    "other", ["Readings.CSV", "readings.csv.txt", "readings.tsv", "readings.txt"]
)
def test_a_file_under_another_name_is_pointed_out(folder, other):
    (folder / "readings.csv").rename(folder / other)
    problems = check_trial(folder)
    assert problems["fix"].str.contains(f'Rename "{other}" to readings.csv', regex=False).any()


def test_links_pipes_and_directories_are_refused(folder, tmp_path):
    for name, make in (
        ("mixes.csv", lambda path: path.symlink_to(tmp_path / "elsewhere.csv")),
        ("raters.csv", os.mkfifo),
        ("vessels.csv", lambda path: path.mkdir()),
    ):
        (folder / name).unlink()
        make(folder / name)
    messages = dict(zip(*check_trial(folder)[["file", "message"]].T.to_numpy(), strict=True))
    assert "link" in messages["mixes.csv"]
    assert "not an ordinary file" in messages["raters.csv"]
    assert "not an ordinary file" in messages["vessels.csv"]


def test_what_the_system_does_not_open_is_named(folder, monkeypatch):
    from pathlib import Path

    def closed(path):
        raise PermissionError(13, "Permission denied")

    with monkeypatch.context() as patch:
        patch.setattr(Path, "read_bytes", closed)
        problems = check_trial(folder)
    hit = problems[problems["message"] == "it cannot be opened (permission denied)"]
    assert {"trial.toml", "mixes.csv", "raters.csv"} <= set(hit["file"])
    monkeypatch.setattr(Path, "iterdir", closed)
    assert check_trial(folder)["message"].tolist() == ["it cannot be opened (permission denied)"]
    with pytest.raises(TrialDataError, match="cannot be opened"):
        read_trial(folder)


@pytest.mark.parametrize("name", ["x" * 5000, "no/such/folder", "trial.toml"])
def test_what_is_no_folder_is_refused(folder, name):
    problems = check_trial(folder / name)
    assert problems["level"].tolist() == ["refuse"]


def test_a_large_file_is_refused_unread_and_says_how_to_allow_it(folder):
    with (folder / "readings.csv").open("ab") as stream:
        stream.truncate(100_000_000)
    problems = check_trial(folder)
    hit = problems[problems["file"] == "readings.csv"]
    assert hit["message"].iloc[0].startswith("the file has 100 MB")
    assert "--max-mb 101" in hit["fix"].iloc[0]


def test_ten_faults_give_ten_messages(make_folder):
    from tests.records import conftest as base

    text = base.readings_text()
    for old, new in (
        ("K01,R01,0.5,haze,21.3", "K01,R01,0.5,haze,abc"),
        ("K02,R01,0.5,haze,33.8", "K92,R01,0.5,haze,33.8"),
        ("K03,R01,0.5,haze,24.1,NTU", "K03,R01,0.5,haze,24.1,PSU"),
        ("K04,R01,0.5,haze,31.5", "K04,R09,0.5,haze,31.5"),
        ("K01,R01,1,haze,9.87", "K01,R01,-1,haze,9.87"),
        ("K02,R01,1,haze,21.4", "K02,R01,99,haze,21.4"),
        ("K03,R01,1,haze,8.72", "K03,R01,1,hazee,8.72"),
        ("K04,R01,1,haze,19.95", "K04,R01,1,haze,TRUE"),
        ("K01,R01,2,haze,2.31,NTU,,,T01,", "K01,R01,2,haze,2.31,NTU,,,T01"),
        ("K02,R01,2,haze,12.65", "K02,R01,2,haze,4-May"),
    ):
        assert old in text
        text = text.replace(old, new, 1)
    refused = check_trial(make_folder(readings=text)).query("level == 'refuse'")
    assert len(refused) == 10
    assert refused["message"].nunique() == 10


def test_strict_turns_warnings_into_refusals(make_folder):
    folder = make_folder(readings=_damaged("readings", "haze,21.3", "haze,"))
    assert "refuse" not in set(check_trial(folder)["level"])
    strict = check_trial(folder, strict=True)
    assert "warn" not in set(strict["level"])
    with pytest.raises(TrialDataError, match="not read"):
        read_trial(folder, strict=True)


def test_a_cause_comes_before_its_symptoms(make_folder):
    folder = make_folder(readings=_damaged("readings", "vessel,rater,", "rater,vessel,"))
    problems = check_trial(folder)
    assert "look swapped" in problems["message"].iloc[0]
    assert len(problems) > 50


@pytest.mark.parametrize(
    ("name", "old", "new"),
    [
        ("vessels", "K05,reference", "K05,refrence"),
        ("vessels", "08:05:00,M02", "08:05:00,M20"),
        ("key", "K02,M02", "K02,M20"),
    ],
)
def test_a_mistyped_word_brings_no_symptoms(make_folder, name, old, new):
    from tests.records import conftest as base

    vessels = "\n".join(line.rpartition(",")[0] for line in base.VESSELS.splitlines()) + "\n"
    key = "vessel,mix\nK01,M01\nK02,M02\nK03,M01\nK04,M02\n"
    texts = {"vessels": base.VESSELS} if name == "vessels" else {"vessels": vessels, "key": key}
    assert old in texts[name]
    texts[name] = texts[name].replace(old, new, 1)
    refused = check_trial(make_folder(**texts)).query("level == 'refuse'")
    assert len(refused) == 1, refused[["file", "message"]]
    assert refused["value"].iloc[0] == new.rpartition(",")[2][-8:]


def test_where_every_row_is_refused_nothing_is_called_unread(make_folder):
    from tests.records import conftest as base

    text = base.readings_text().replace(",NTU,", ",NTX,").replace(",lines,", ",lnes,")
    problems = check_trial(make_folder(readings=text.replace(",PSU,", ",PSX,")))
    assert not problems["message"].str.contains("no readings yet").any()


def test_a_round_that_is_missing_is_named_once(make_folder):
    from tests.records import conftest as base

    lines = base.readings_text().splitlines(keepends=True)
    text = "".join(line for line in lines if ",4,clarity," not in line)
    said = check_trial(make_folder(readings=text)).query("level == 'warn'")
    assert said["message"].tolist() == ["a planned round of clarity is missing"]


def test_messages_name_file_row_column_value_and_fix(make_folder):
    text = _damaged("readings", "haze,21.3,", 'haze,"21,3",')
    line = format_problems(check_trial(make_folder(readings=text))).splitlines()[1]
    assert line.startswith('readings.csv row 12, column value: "21,3" - a comma stands')
    assert "Fix: Use a point" in line


def test_many_equal_problems_are_grouped(make_folder):
    from tests.records import conftest as base

    text = base.readings_text().replace(",NTU,", ",NTX,")
    shown = format_problems(check_trial(make_folder(readings=text)))
    assert shown.count("not a unit of haze") == 1
    assert "(+22 more, see problems.csv)" in shown


def test_no_message_shows_more_than_forty_characters_of_a_cell(make_folder):
    long = "x" * 5000
    problems = check_trial(make_folder(readings=_damaged("readings", "haze,21.3", f"haze,{long}")))
    assert problems["value"].str.len().max() <= 40
    shown = format_problems(problems)
    assert "x" * 41 not in shown


@pytest.mark.parametrize("char", ["\x1b", "\u202e", "\u200b", "\x07", "\u2028"])
def test_hidden_characters_are_shown_escaped(make_folder, char):
    folder = make_folder(readings=_damaged("readings", "haze,21.3", f"haze,2{char}1"))
    shown = format_problems(check_trial(folder))
    assert char not in shown
    assert char.encode("unicode_escape").decode() in shown
