"""Many complaints at once, in a stream from one end to the other.

source ──sources──▶ complaints ──run, cluster──▶ answers ──output──▶ one JSON line each, in the order of the input
                                                     └──urgency, duplicates──▶ table, the most urgent first
"""
