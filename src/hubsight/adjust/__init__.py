"""The one least-squares adjustment over any number of photos, and its covariance."""
