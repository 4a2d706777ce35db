"""The computing core: plain values and arrays in, plain values and arrays out; no Django, no database, no HTTP.

Inside the core lengths are millimetres, angles degrees, times seconds, unless a name says otherwise.
"""
