"""Screening and dominance leave the best build in, and nothing but the input decides which one it is."""

import pytest
from oracle import OBJECTIVES, drawn_case

import optimise.model.screening
import optimise.model.search
from optimise.model.screening import Kept, Weights
from optimise.model.search import Result, best_build
from optimise.parts import Catalogue
from optimise.problem import Problem
from optimise.scenario import Scenario
