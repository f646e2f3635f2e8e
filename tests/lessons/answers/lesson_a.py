"""Notebook A: right answers, and typical wrong ones with the words that must come back."""

RIGHT = {
    "monday-answer": 'evening.monday(often="names", dear="structure")',
    "cost-answer": 'evening.argue("avocet", cost=2.9)',
    "word-answer": 'evening.word("teasel", "mark", 95, "I showed it so on Thursday")\nevening.again()',
    "late-answer": 'late.counts("dunlin-again.json")',
}

TOLD = {"class-often": "names: 5 students lost something there"}
"""What a guess comes to that a cell works out, for the instructors' sheet."""

# (answers put in, check cell, words that its answer must hold)
WRONG = [
    ({"monday-answer": 'evening.monday(often="bend", dear="bend")'}, "monday-check", "compare the column students"),
    ({"monday-answer": 'evening.monday(often="names", dear="names")'}, "monday-check", "compare the column points"),
    ({"monday-answer": 'evening.monday(often="naming", dear="bend")'}, "monday-check", '"naming" is no criterion'),
    ({"monday-answer": 'evening.monday(often="Bend", dear="Bend")'}, "monday-check", "2 students"),
    ({"monday-answer": 'evening.monday(often="names")'}, "monday-check", "Two words are asked for"),
    ({"cost-answer": 'evening.argue("avocet", cost=8.7)'}, "cost-check", "3 joints share them: 10 each"),
    ({"cost-answer": 'evening.argue("avocet", cost=7.1)'}, "cost-check", "What is lost is asked for"),
    ({"cost-answer": 'evening.argue("avocet", cost=0.29)'}, "cost-check", "10 points hang on it"),
    ({"cost-answer": 'evening.argue("avocet", cost=4.68)'}, "cost-check", "The first 0.2 radii are free"),
    ({"cost-answer": 'evening.argue("avocet", cost=0)'}, "cost-check", "It did cost something"),
    ({"cost-answer": 'evening.argue("avocet", cost=20)'}, "cost-check", "one by one"),
    ({"word-answer": 'evening.word("teasel", "mark", 95, "my fault")'}, "word-check", "Mark again"),
    ({"word-answer": 'evening.word("teasel", "structure", 100, "my fault")\nevening.again()'}, "word-check", "limit of 60 still holds"),
    ({"word-answer": 'evening.word("teasel", "structure", 0.9, "my fault")\nevening.again()'}, "word-check", "Write 90"),
    ({"word-answer": 'evening.word("teazel", "mark", 95, "my fault")\nevening.again()'}, "word-check", "such as teasel"),
    ({"word-answer": 'evening.word("teasel", "Mark", 0.95, "my fault")\nevening.again()'}, "word-check", "such as 95"),
    ({"word-answer": 'evening.word("teasel", "mark", 950, "my fault")\nevening.again()'}, "word-check", "from 0 to 100"),
    ({"word-answer": 'evening.word("teasel", "mark", 95, "...")\nevening.again()'}, "word-check", "why, in words"),
    ({"word-answer": 'evening.word("teasel", "mark", 95, "no")\nevening.word("teasel", "mark", None)\nevening.again()'}, "word-check", "no word for teasel"),
    ({"word-answer": 'evening.word("teasel", "mark", 95)\nevening.again()'}, "word-check", "gives no reason"),
    ({"word-answer": 'evening.word("teasel", "mark", 65, "my fault")\nevening.again()'}, "word-check", "to 90 or more"),
    ({"word-answer": 'evening.word("wren", "mark", 95, "my fault")\nevening.again()'}, "word-check", "only for wren"),
    ({"late-answer": 'late.counts("dunlin-the-final-one.json")'}, "late-check", "The number of the attempt decides"),
    ({"late-answer": 'late.counts("dunlin.json")'}, "late-check", "attempt 1"),
    ({"late-answer": 'late.counts("again")'}, "late-check", "There is no file"),
]  # fmt: skip
