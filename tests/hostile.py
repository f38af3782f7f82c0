"""Texts that are made to keep a reader busy or to break it, each under a megabyte; invented."""

from __future__ import annotations

from engine.formats.scenario import demo_scenarios

JOB = demo_scenarios()["van-bench"].read_text(encoding="utf-8")
MANY = 80_000

DOCUMENTS = {
    "a key of 3000 parts": "a" + ".a" * 3_000 + "=1\n",
    "a table of 3000 parts": "[a" + ".a" * 3_000 + "]\nx=1\n",
    "tables of 100 levels": "[a" + ".a" * 100 + "]\nx=1\n",
    "lists of 3000 levels": "a=" + "[" * 3_000 + "]" * 3_000 + "\n",
    "tables in line of 3000 levels": "a=" + "{a=" * 3_000 + "1" + "}" * 3_000 + "\n",
    "a number of 20000 digits": "n=" + "9" * 20_000 + "\n",
    "a number of 4000 digits": "n=" + "9" * 4_000 + "\n",
    "a long number in hexadecimal": "n=0x" + "f" * 900_000 + "\n",
    "80000 unknown keys": "".join(f"k{i}=1\n" for i in range(MANY)),
    "80000 unknown keys of a driver": JOB + "\n[[driver]]\n" + "".join(f"fs{i}=1\n" for i in range(70_000)),
    "80000 tables": "".join(f"[t{i}]\n" for i in range(MANY)),
    "60000 keys with dots": "".join(f"a.b.c.d{i}=1\n" for i in range(60_000)),
    "15000 keys, then one again": "".join(f"k{i}=1\n" for i in range(15_000)) + "k0=1\n",
    "a list of 400000": "a=[" + "1," * 400_000 + "]\n",
    "50000 drivers": JOB + "[[driver]]\n" * 50_000,
    "an open text": 'a="""' + "x" * 900_000,
}
# What a reader gets to the end of, but finds hardly anything right in.
FAULTY = {
    "9000 unknown keys in 90 drivers": JOB
    + "".join("[[driver]]\n" + "".join(f"zz{i}{j}=1\n" for j in range(100)) for i in range(90)),
    "a number of 500000 decimals": JOB + "\n[x]\nn=1." + "9" * 500_000 + "\n",
    "a text of 900000 letters": JOB + '\n[x]\ny="' + "z" * 900_000 + '"\n',
}
TABLES = {
    "100000 columns": ",".join(f"c{i}" for i in range(100_000)) + "\n1\n",
    "200000 lines": "name,fs\n" + "a,1\n" * 200_000,
    "an open quotation": 'name,fs\n"' + "x" * 900_000,
    "200 unknown columns": ",".join(f"zz{i}" for i in range(200)) + "\n" + (",".join("1" * 200) + "\n") * 1_900,
    "400000 remarks": "#\n" * 400_000,
    "separators alone": "," * 900_000,
    "numbers of 300 digits": "name,fs\n" + "".join(f"a{i},{'9' * 300}\n" for i in range(1_900)),
    "brackets": "a(" * 400_000 + "\n1\n",
}
FIGURES = TABLES | {
    "a number of 900000 digits": "1," + "9" * 900_000,
    "200000 rows alike": "10,1\n" * 200_000,
    "60000 rows that fall": "".join(f"{1e5 - i * 0.1:.1f},{i}\n" for i in range(60_000)),
    "300000 lines of text": "x\n" * 300_000,
    "400000 cells in a row": "1\t" * 400_000,
    "70000 rows of mixed commas": "1,5;2\n3,4,5\n" * 35_000,
    "15000 rows that are none": "Frequency (Hz), |Z| (ohm)\n" + "abc,def\n" * 15_000,
    "15000 infinite numbers": "1e999,2\n" * 15_000,
    "15000 rows that are no numbers": "nan,nan\n" * 15_000,
    "rows of every width": "".join("1 " * (i % 400) + "\n" for i in range(2_300)),
    "dashes": "-" * 900_000,
}
