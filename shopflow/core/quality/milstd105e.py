"""MIL-STD-105E (10 May 1989): tables I and II-A to II-C, single sampling. US Government work, public domain.

Normal inspection read in copies of the printed standard: the acceptance numbers row by row, the arrows of
AQL 0.65 to 15 cell by cell, the other arrows from the regular diagonal structure of the table. Tightened and reduced
inspection compared plan by plan, arrows followed, with the tables of a public statistics package (R: AQLSchemes 1.7-2),
and tightened, letters B to K, AQL 0.65 to 15, with the copy in a government guide (NIBS, AC-TABLE 1-B).
"""

from __future__ import annotations

LEVELS = ("S1", "S2", "S3", "S4", "I", "II", "III")

CODE_LETTERS: tuple[tuple[int, str], ...] = (
    (8, "AAAAAAB"),
    (15, "AAAAABC"),
    (25, "AABBBCD"),
    (50, "ABBCCDE"),
    (90, "BBCCCEF"),
    (150, "BBCDDFG"),
    (280, "BCDEEGH"),
    (500, "BCDEFHJ"),
    (1200, "CCEFGJK"),
    (3200, "CDEGHKL"),
    (10000, "CDFGJLM"),
    (35000, "CDFHKMN"),
    (150000, "DEGJLNP"),
    (500000, "DEGJMPQ"),
    (0, "DEHKNQR"),
)
"""Lot sizes up to and including, 0 for no end, with a letter for each of LEVELS. The first row begins at 2."""

AQLS = (
    "0.010", "0.015", "0.025", "0.040", "0.065", "0.10", "0.15", "0.25", "0.40", "0.65", "1.0", "1.5", "2.5",
    "4.0", "6.5", "10", "15", "25", "40", "65", "100", "150", "250", "400", "650", "1000",
)  # fmt: skip

NORMAL_SINGLE: tuple[tuple[str, int, str], ...] = (
    ("A", 2, "v v v v v v v v v v v v v v 0 v v 1 2 3 5 7 10 14 21 30"),
    ("B", 3, "v v v v v v v v v v v v v 0 ^ v 1 2 3 5 7 10 14 21 30 44"),
    ("C", 5, "v v v v v v v v v v v v 0 ^ v 1 2 3 5 7 10 14 21 30 44 ^"),
    ("D", 8, "v v v v v v v v v v v 0 ^ v 1 2 3 5 7 10 14 21 30 44 ^ ^"),
    ("E", 13, "v v v v v v v v v v 0 ^ v 1 2 3 5 7 10 14 21 30 44 ^ ^ ^"),
    ("F", 20, "v v v v v v v v v 0 ^ v 1 2 3 5 7 10 14 21 ^ ^ ^ ^ ^ ^"),
    ("G", 32, "v v v v v v v v 0 ^ v 1 2 3 5 7 10 14 21 ^ ^ ^ ^ ^ ^ ^"),
    ("H", 50, "v v v v v v v 0 ^ v 1 2 3 5 7 10 14 21 ^ ^ ^ ^ ^ ^ ^ ^"),
    ("J", 80, "v v v v v v 0 ^ v 1 2 3 5 7 10 14 21 ^ ^ ^ ^ ^ ^ ^ ^ ^"),
    ("K", 125, "v v v v v 0 ^ v 1 2 3 5 7 10 14 21 ^ ^ ^ ^ ^ ^ ^ ^ ^ ^"),
    ("L", 200, "v v v v 0 ^ v 1 2 3 5 7 10 14 21 ^ ^ ^ ^ ^ ^ ^ ^ ^ ^ ^"),
    ("M", 315, "v v v 0 ^ v 1 2 3 5 7 10 14 21 ^ ^ ^ ^ ^ ^ ^ ^ ^ ^ ^ ^"),
    ("N", 500, "v v 0 ^ v 1 2 3 5 7 10 14 21 ^ ^ ^ ^ ^ ^ ^ ^ ^ ^ ^ ^ ^"),
    ("P", 800, "v 0 ^ v 1 2 3 5 7 10 14 21 ^ ^ ^ ^ ^ ^ ^ ^ ^ ^ ^ ^ ^ ^"),
    ("Q", 1250, "0 ^ v 1 2 3 5 7 10 14 21 ^ ^ ^ ^ ^ ^ ^ ^ ^ ^ ^ ^ ^ ^ ^"),
    ("R", 2000, "^ ^ 1 2 3 5 7 10 14 21 ^ ^ ^ ^ ^ ^ ^ ^ ^ ^ ^ ^ ^ ^ ^ ^"),
)
"""Code letter, sample size, and for each of AQLS the acceptance number; v and ^: the first plan below or above."""

TIGHTENED_SINGLE: tuple[tuple[str, int, str], ...] = (
    ("A", 2, "v v v v v v v v v v v v v v v v v v 1 2 3 5 8 12 18 27"),
    ("B", 3, "v v v v v v v v v v v v v v 0 v v 1 2 3 5 8 12 18 27 41"),
    ("C", 5, "v v v v v v v v v v v v v 0 v v 1 2 3 5 8 12 18 27 41 ^"),
    ("D", 8, "v v v v v v v v v v v v 0 v v 1 2 3 5 8 12 18 27 41 ^ ^"),
    ("E", 13, "v v v v v v v v v v v 0 v v 1 2 3 5 8 12 18 27 41 ^ ^ ^"),
    ("F", 20, "v v v v v v v v v v 0 v v 1 2 3 5 8 12 18 ^ ^ ^ ^ ^ ^"),
    ("G", 32, "v v v v v v v v v 0 v v 1 2 3 5 8 12 18 ^ ^ ^ ^ ^ ^ ^"),
    ("H", 50, "v v v v v v v v 0 v v 1 2 3 5 8 12 18 ^ ^ ^ ^ ^ ^ ^ ^"),
    ("J", 80, "v v v v v v v 0 v v 1 2 3 5 8 12 18 ^ ^ ^ ^ ^ ^ ^ ^ ^"),
    ("K", 125, "v v v v v v 0 v v 1 2 3 5 8 12 18 ^ ^ ^ ^ ^ ^ ^ ^ ^ ^"),
    ("L", 200, "v v v v v 0 v v 1 2 3 5 8 12 18 ^ ^ ^ ^ ^ ^ ^ ^ ^ ^ ^"),
    ("M", 315, "v v v v 0 v v 1 2 3 5 8 12 18 ^ ^ ^ ^ ^ ^ ^ ^ ^ ^ ^ ^"),
    ("N", 500, "v v v 0 v v 1 2 3 5 8 12 18 ^ ^ ^ ^ ^ ^ ^ ^ ^ ^ ^ ^ ^"),
    ("P", 800, "v v 0 v v 1 2 3 5 8 12 18 ^ ^ ^ ^ ^ ^ ^ ^ ^ ^ ^ ^ ^ ^"),
    ("Q", 1250, "v 0 v v 1 2 3 5 8 12 18 ^ ^ ^ ^ ^ ^ ^ ^ ^ ^ ^ ^ ^ ^ ^"),
    ("R", 2000, "0 ^ v 1 2 3 5 8 12 18 ^ ^ ^ ^ ^ ^ ^ ^ ^ ^ ^ ^ ^ ^ ^ ^"),
    ("S", 3150, "^ ^ 1 ^ ^ ^ ^ ^ ^ ^ ^ ^ ^ ^ ^ ^ ^ ^ ^ ^ ^ ^ ^ ^ ^ ^"),
)
"""Table II-B, laid out as NORMAL_SINGLE. Behind the first number of a row stand two arrows down, not one up."""

REDUCED_SINGLE: tuple[tuple[str, int, str], ...] = (
    ("A", 2, "v v v v v v v v v v v v v v 0/1 v v 1/2 2/3 3/4 5/6 7/8 10/11 14/15 21/22 30/31"),
    ("B", 2, "v v v v v v v v v v v v v 0/1 ^ v 0/2 1/3 2/4 3/5 5/6 7/8 10/11 14/15 21/22 30/31"),
    ("C", 2, "v v v v v v v v v v v v 0/1 ^ v 0/2 1/3 1/4 2/5 3/6 5/8 7/10 10/13 14/17 21/24 ^"),
    ("D", 3, "v v v v v v v v v v v 0/1 ^ v 0/2 1/3 1/4 2/5 3/6 5/8 7/10 10/13 14/17 21/24 ^ ^"),
    ("E", 5, "v v v v v v v v v v 0/1 ^ v 0/2 1/3 1/4 2/5 3/6 5/8 7/10 10/13 14/17 21/24 ^ ^ ^"),
    ("F", 8, "v v v v v v v v v 0/1 ^ v 0/2 1/3 1/4 2/5 3/6 5/8 7/10 10/13 ^ ^ ^ ^ ^ ^"),
    ("G", 13, "v v v v v v v v 0/1 ^ v 0/2 1/3 1/4 2/5 3/6 5/8 7/10 10/13 ^ ^ ^ ^ ^ ^ ^"),
    ("H", 20, "v v v v v v v 0/1 ^ v 0/2 1/3 1/4 2/5 3/6 5/8 7/10 10/13 ^ ^ ^ ^ ^ ^ ^ ^"),
    ("J", 32, "v v v v v v 0/1 ^ v 0/2 1/3 1/4 2/5 3/6 5/8 7/10 10/13 ^ ^ ^ ^ ^ ^ ^ ^ ^"),
    ("K", 50, "v v v v v 0/1 ^ v 0/2 1/3 1/4 2/5 3/6 5/8 7/10 10/13 ^ ^ ^ ^ ^ ^ ^ ^ ^ ^"),
    ("L", 80, "v v v v 0/1 ^ v 0/2 1/3 1/4 2/5 3/6 5/8 7/10 10/13 ^ ^ ^ ^ ^ ^ ^ ^ ^ ^ ^"),
    ("M", 125, "v v v 0/1 ^ v 0/2 1/3 1/4 2/5 3/6 5/8 7/10 10/13 ^ ^ ^ ^ ^ ^ ^ ^ ^ ^ ^ ^"),
    ("N", 200, "v v 0/1 ^ v 0/2 1/3 1/4 2/5 3/6 5/8 7/10 10/13 ^ ^ ^ ^ ^ ^ ^ ^ ^ ^ ^ ^ ^"),
    ("P", 315, "v 0/1 ^ v 0/2 1/3 1/4 2/5 3/6 5/8 7/10 10/13 ^ ^ ^ ^ ^ ^ ^ ^ ^ ^ ^ ^ ^ ^"),
    ("Q", 500, "0/1 ^ v 0/2 1/3 1/4 2/5 3/6 5/8 7/10 10/13 ^ ^ ^ ^ ^ ^ ^ ^ ^ ^ ^ ^ ^ ^ ^"),
    ("R", 800, "^ ^ 0/2 1/3 1/4 2/5 3/6 5/8 7/10 10/13 ^ ^ ^ ^ ^ ^ ^ ^ ^ ^ ^ ^ ^ ^ ^ ^"),
)
"""Table II-C, with acceptance and rejection number: a lot between the two is accepted and ends reduced inspection."""
