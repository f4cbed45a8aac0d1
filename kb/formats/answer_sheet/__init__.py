"""The answer sheet: what a doctor types on a phone, a line for each question.

A heading names date, source, area and round for the lines below it. Any other line is one question
or a range, its codes, and a remark:

    14 Jan north nephrology
    1041                      right
    1042 x C>B gout vs pseudogout
    1043 ?                    right, but a guess
    1044-1052                 all right
    1053 -                    not answered

`parser` goes line by line; each of the other modules knows one part of a line. The caller gives the
day: nothing here asks the clock.
"""
